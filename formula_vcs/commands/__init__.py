"""What people type: one thin file a command, loaded only when it is called."""

from __future__ import annotations
