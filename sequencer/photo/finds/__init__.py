"""Room: cloth on a table."""
