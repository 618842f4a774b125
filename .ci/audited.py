"""Reads pip-audit's JSON and says in lines what is known against the dependencies; exit code 1 where something is."""

import json
import sys


def said(read):
    """The lines: what is known, how many were looked at, and by name which were not and why."""
    audited = [one for one in read if "skip_reason" not in one]
    if not audited:
        reasons = sorted({one["skip_reason"].partition(":")[0] for one in read})
        yield f"NOT audited: pip-audit could look up none of {len(read)} dependencies ({', '.join(reasons)})"
        return
    for one in audited:
        for known in one["vulns"]:
            mended = ", ".join(known["fix_versions"]) or "no version yet"
            yield f"{one['name']} {one['version']}: {known['id']}, mended in {mended}"
    yield f"pip-audit looked at {len(audited)} of {len(read)} dependencies"
    reasons = {}
    for one in read:
        if "skip_reason" in one:
            # the reason names its package, so that no two are alike
            reason = one["skip_reason"].partition(":")[0]
            reasons.setdefault(reason, []).append(one["name"])
    for reason, names in reasons.items():
        which = "all of them" if len(names) == len(read) else ", ".join(names)
        yield f"not audited, {which}: {reason}"


def main():
    """Print them."""
    read = json.load(sys.stdin)["dependencies"]
    for line in said(read):
        print(f"gate: {line}")
    return int(any(one.get("vulns") for one in read))


if __name__ == "__main__":
    sys.exit(main())
