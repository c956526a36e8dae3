"""Tests of the closed form."""
