"""python -m meter: the same as the console script stopgap."""

from meter.cli.app import main

main(prog_name="stopgap")
