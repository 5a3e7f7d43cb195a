"""The few commands a developer runs; README.md beside this file lists them."""
