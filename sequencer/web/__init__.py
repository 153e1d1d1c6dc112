"""The browser page: a face. It guards, passes on and answers; the road computes."""
