"""Paper: type, margins, tables, pictures, and sections that fill their pages."""
