"""curewatch: says when each sprayed piece of a finishing shop is ready to recoat, sand or buff."""

__version__ = "0.1.0"
