"""What is in a workspace, in each format."""
