"""Drawings: inline SVG from plain numbers. No physics, no storage, no words of their own.

Every drawing carries a title and a description for those who do not see it, is styled by classes
of look/page.css, and says nothing by colour alone.
"""
