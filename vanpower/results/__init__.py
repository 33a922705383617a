"""How an answer shows itself."""
