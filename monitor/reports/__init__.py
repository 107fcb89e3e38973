"""What the commands and, later, the page show: read from what is stored, deciding nothing."""
