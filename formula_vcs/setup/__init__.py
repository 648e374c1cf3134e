"""What arms a clone, starts a workspace, and builds the demo."""
