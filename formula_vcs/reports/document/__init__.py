"""What a report says, as blocks; and how blocks are written: for a terminal, as markdown, as HTML, as data."""
