"""The office desk: what came in, what two people answered differently, what is held, phones and the shop's books."""

from .pages import blueprint

__all__ = ["blueprint"]
