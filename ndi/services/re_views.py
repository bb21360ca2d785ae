"""Whether a record waits for another look under a containment."""

from __future__ import annotations

from ndi.domain import facts as f
from ndi.services.containment import latest_actions
from ndi.services.deciding import open_containments
from ndi.services.lookup import about
from ndi.services.ports import Session

RE_VIEW = "re-view"


def re_view_due(session: Session, inspection: str) -> str | None:
    """The containment that asks for a re-view of this record now, or None."""
    opened = [r for r in about(session, f.ContainmentOpened, inspection) if inspection in r.fact.inspections]
    done = [r for r in about(session, f.ContainmentItemDone, inspection) if r.fact.inspection == inspection]
    for name in sorted(open_containments(opened, done)):
        action = latest_actions(session, name).get(inspection)
        if action is None or action.action == RE_VIEW:
            return name
    return None
