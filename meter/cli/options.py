"""Options that more than one verb takes, each in one place."""

from pathlib import Path

import click

json_option = click.option("--json", "as_json", is_flag=True, help="Print one JSON object instead of text.")
shelf_option = click.option(
    "--shelf",
    "shelf_dir",
    type=click.Path(path_type=Path),
    help="Folder with your own films/ and kits/; they win over shipped ones of the same name.",
)
