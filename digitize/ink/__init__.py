"""What is drawn, before it means anything."""
