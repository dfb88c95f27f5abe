"""Films, kits, filters, subjects and daylight: data files and their reader."""
