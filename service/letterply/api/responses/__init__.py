"""Responses: what routes return: results, lists, fonts, drawings, orders."""
