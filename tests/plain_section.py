"""Sound section cases as tables."""

LINE = {"kind": "line along", "on": "top", "length": "1 m"}
SPOTS = {"kind": "spots along", "on": "top", "diameter": "20 mm", "spacing": "60 mm",
         "length": "1 m"}  # fmt: skip
PLATE = {
    "title": "a plate",
    "view": "section",
    "member": {"section": "plate", "width": "300 mm", "thickness": "12 mm"},
    "steel": {"grade": "S355"},
    "heat": [{"pattern": [LINE]}],
}
STRIP = {"kind": "strip along", "on": "flange top", "width": "60 mm", "length": "2 m"}
BEAM = PLATE | {"member": {"section": "IPE 300"}, "heat": [{"pattern": [STRIP]}]}
BARE = {
    "section": "I", "depth": "200 mm", "flange_width": "100 mm",
    "web_thickness": "6 mm", "flange_thickness": "10 mm", "root_radius": "0 mm",
}  # fmt: skip
