"""Reads pip-audit's JSON and says in lines what is known against the dependencies; exit code 1 where something is."""

import json
import sys

read = json.load(sys.stdin)["dependencies"]
audited = [one for one in read if "skip_reason" not in one]
for one in audited:
    for known in one["vulns"]:
        mended = ", ".join(known["fix_versions"]) or "no version yet"
        print(f"gate: {one['name']} {one['version']}: {known['id']}, mended in {mended}")
if not audited:
    print(f"gate: the dependencies were not audited: {read[0]['skip_reason'] if read else 'none is listed'}")
else:
    print(f"gate: pip-audit looked at {len(audited)} of {len(read)} dependencies")
sys.exit(any(one["vulns"] for one in audited))
