"""One file for each export format; ``forms.write`` picks one by name. Every file carries the rights note."""
