"""Room: prints."""
