"""Makes what meter/response.py and a kit file read: profiles of phones, measured times of shutters."""
