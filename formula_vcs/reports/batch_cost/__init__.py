"""What a batch cost against its standard."""
