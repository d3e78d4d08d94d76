"""The JSON API: what the library answers, over HTTP, for many people at once."""
