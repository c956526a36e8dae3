"""bouncesim schema: the JSON schema of a scenario file, for editors."""

from __future__ import annotations

from pathlib import Path

import click

from bouncesim.cli.text import tell


@click.command("schema", epilog="Example: bouncesim schema --output scenario.schema.json")
@click.option("-o", "--output", type=click.Path(path_type=Path, dir_okay=False), metavar="FILE", help="Write it into a file.")
def command(output: Path | None) -> None:
    """Print the JSON schema of a scenario file.

    An editor that knows JSON schemas for TOML completes keys and words with it, and marks most mistakes as you type; the rest, such as
    fields that do not agree, is found when a scenario is read. Draft 2020-12 of JSON schema.
    """
    import json

    from bouncesim.account.whole import write_files
    from bouncesim.scenario.json_schema import schema

    text = json.dumps(schema(), indent=1, ensure_ascii=False) + "\n"
    if output is None:
        click.echo(text, nl=False)
        return
    write_files(output.parent, {output.name: lambda file: file.write(text.encode("utf-8"))})
    tell(f"Wrote {output}. Name it in your editor as the schema of your scenarios.")
