"""Is this window of readings, or this silence, all right? Pure: readings and memory in, findings out."""
