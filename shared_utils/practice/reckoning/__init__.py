"""How the answers of the numeric items are reckoned, a module for each lesson."""
