"""Pictures of readings, worked out and written without any library. Pure: values in, text out."""
