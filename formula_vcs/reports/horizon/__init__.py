"""What will stop complying, and when."""
