"""``set`` of a placement whose part has a description: values of its joints, in degrees or mm."""
from __future__ import annotations

from chassis_describe.layout.build.adjustments import amount
from chassis_describe.layout.build.mirror import PlacementKeys
from chassis_describe.layout.described.model import Description
from chassis_describe.layout.language.reading import Reading
from chassis_describe.layout.model import Part
from chassis_describe.words import amount_words


def joint_settings(w: PlacementKeys, description: Description, part: Part, r: Reading) -> dict[str, float]:
    """By joint, as written; SI. Faults are reported."""
    known = {n: j for n, j in description.joints.items() if j.type != "fixed"}
    also = [description.source.mark]
    out: dict[str, float] = {}
    for name, kept in w.get("set").items():
        key, given = w.at("set").items[name]  # type: ignore[union-attr]
        path = (*w.within("set"), name)
        if name not in known:
            r.unknown("unknown-name", f"a joint of `{part.name}` that moves", name, known, key, path, also=also)
            continue
        joint = known[name]
        kind = "slide" if joint.type == "prismatic" else "turn"
        if joint.mimic is not None:
            r.fault("meaningless-key", f"`{name}` follows `{joint.mimic[0]}`", key, path, hint=f"set `{joint.mimic[0]}` instead",
                    also=also)
        elif kept is not None and (value := amount(kind).read(kept[0], r, kept[1])) is not None:
            low, high = joint.lower, joint.upper
            if low is not None and high is not None and not low - 1e-9 <= value <= high + 1e-9:
                r.fault("bad-value", f"{amount_words(value, kind)} is out of the range of `{name}`", given, path,
                        hint=f"it goes from {amount_words(low, kind)} to {amount_words(high, kind)}", also=also)
            out[name] = value
    return out
