"""What an editor is told while somebody types: findings, hints, names, places and mends, of unsaved files too."""
