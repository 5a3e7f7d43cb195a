"""Recognisers, decoding against the legend, calibrated confidence."""
