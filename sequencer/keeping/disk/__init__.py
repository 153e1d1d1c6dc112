"""What lies in a piece folder as files: by content, readings, the lock, names that are safe."""
