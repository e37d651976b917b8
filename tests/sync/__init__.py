"""Tests of the exchange of changes: properties of the merge, hostile input, both databases, many writers."""
