"""What an import would do."""
