"""Models of the parts one buys: panels from their labels, controllers, batteries, cables."""
