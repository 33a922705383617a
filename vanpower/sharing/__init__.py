"""A picture carries what made it: recipes, charts saved with them and drawn again, and text for a forum."""
