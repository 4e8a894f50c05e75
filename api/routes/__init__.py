"""The routes of the service, one noun per module."""
