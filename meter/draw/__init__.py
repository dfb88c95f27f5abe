"""Pictures as SVG text from plain lists; pure, so that a browser draws with it too."""
