"""Many designs at once: which quantities vary, what is asked of them, and why some do not count."""
