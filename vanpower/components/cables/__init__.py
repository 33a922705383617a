"""Copper cables between roof, controller and battery: their losses, current ratings, and sizes in mm² and AWG."""
