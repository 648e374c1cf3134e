"""What a move to another size does to a process."""
