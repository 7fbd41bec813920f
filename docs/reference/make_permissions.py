"""Write who may do what on the bench page, from the two tables that the server looks at."""

from seatwright.web._permissions import PERMISSIONS
from seatwright.workflows.rights import RIGHTS, Role


def pages() -> dict[str, str]:
    """Return the page of permissions."""
    head = "| action | what | " + " | ".join(role.value for role in Role) + " | why |"
    lines = [
        "# Who may do what",
        "",
        "On a page where people sign in; on a page for this machine alone nothing is asked.",
        "",
    ]
    lines += [head, "| --- | --- |" + " :-: |" * len(Role) + " --- |"]
    for right in RIGHTS:
        marks = " | ".join("yes" if role in right.roles else "no" for role in Role)
        what = right.what if right.signed_in else f"{right.what} (nobody has to sign in)"
        lines.append(f"| {right.action.value} | {what} | {marks} | {right.why} |")
    lines += ["", "## What each address asks for", "", "| method | address | action |", "| --- | --- | --- |"]
    lines += [f"| {row.method} | `{row.path}` | {row.action.value} |" for row in PERMISSIONS]
    return {"permissions.md": "\n".join(lines) + "\n"}
