"""What people enter, whatever face they enter it at: checked, stored whole or not at all.

Commands and the page call these and say what came of it in their own way; nothing is printed here.
Each function that writes several rows writes them in one transaction. What cannot be is refused
with the same sentence everywhere.
"""
