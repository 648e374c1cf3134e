"""What is unusual in a batch among its peers."""
