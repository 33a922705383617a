"""What one buys: panels from their labels, controllers, batteries, cables."""
