"""Who approved what, and who may."""
