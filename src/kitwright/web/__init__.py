"""Pages and the JSON API: read, call, show."""
