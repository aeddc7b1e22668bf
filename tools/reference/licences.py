"""Every crate comes under a licence that .deny.toml allows: read from `cargo metadata`, for all features and systems.

`cargo deny` looks at more (tools/deny), where it is installed; this needs Python alone. Expressions are read as SPDX 2.3,
annex D, by the package license-expression.
"""

import argparse
import json
import subprocess
import sys
import tomllib
from pathlib import Path

from license_expression import get_spdx_licensing

TOP = Path(__file__).resolve().parents[2]


def is_allowed(expression, allowed):
    """Whether one of the alternatives of an expression is allowed with all of its parts."""
    operator = getattr(expression, "operator", None)
    if operator is None or not expression.args:
        return expression.render() in allowed
    parts = [is_allowed(part, allowed) for part in expression.args]
    return any(parts) if operator.strip() == "OR" else all(parts)


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--program", help="not needed; the other checks take it")
    parser.parse_args()
    rules = tomllib.loads((TOP / ".deny.toml").read_text())["licenses"]
    exceptions = {it["crate"]: set(it["allow"]) for it in rules.get("exceptions", [])}
    command = ["cargo", "metadata", "--locked", "--format-version", "1", "--all-features"]
    crates = json.loads(subprocess.run(command, cwd=TOP, check=True, capture_output=True, text=True).stdout)["packages"]
    licensing = get_spdx_licensing()
    # The check itself: what is not allowed is refused.
    assert not is_allowed(licensing.parse("MIT AND GPL-3.0-only"), set(rules["allow"]))
    assert is_allowed(licensing.parse("GPL-3.0-only OR MIT"), set(rules["allow"]))
    refused = []
    for crate in crates:
        # An old way of writing OR.
        text = (crate["license"] or "none").replace("/", " OR ")
        allowed = set(rules["allow"]) | exceptions.get(crate["name"], set())
        if not is_allowed(licensing.parse(text), allowed):
            refused.append(f"{crate['name']} {crate['version']}: {text}")
    print(f"{len(crates)} crates, {len(refused)} under a licence that .deny.toml does not allow")
    print("\n".join(refused), end="\n" if refused else "")
    return 1 if refused else 0


if __name__ == "__main__":
    sys.exit(main())
