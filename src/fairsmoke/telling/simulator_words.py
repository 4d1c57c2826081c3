"""The simulator's words: cuts, wraps, moisture and air by its codes, and what is said before it."""

from fairsmoke.messages.message import N_

STANDING = N_(
    "Take this as a rough guide. In published studies that the model was not fitted to, half of "
    "its losses were off by 3.3 points or more; in cooks' own logs half of its times were off by "
    "at least 40 %, most of them too short. Of all printed times and losses its intervals (80 %) "
    "held only 54 %: docs/validation.md."
)
"""What is told before any number, for as long as the bars of docs/validation.md are missed."""

CUT_NAMES = {
    "brisket": N_("Brisket"),
    "brisket flat": N_("Brisket flat"),
    "chuck roast": N_("Chuck roast"),
    "short ribs": N_("Short ribs"),
    "pork shoulder": N_("Pork shoulder"),
    "pork ribs": N_("Pork ribs"),
    "turkey breast": N_("Turkey breast"),
    "brick": N_("A brick of lean meat"),
}
"""The cuts that the simulator knows."""

WRAPS = {
    "": N_("bare"),
    "paper": N_("paper"),
    "foil": N_("foil"),
    "boat": N_("foil boat, open above"),
    "film under foil": N_("film under foil"),
    "tray": N_("covered tray"),
}
"""Wraps by the simulator's words."""

HOLD_WRAPS = {
    "": N_("as on the cooker"),
    "bare": WRAPS[""],
    **{k: w for k, w in WRAPS.items() if k},
}
"""Wraps in the hold."""

HUMIDITY = {
    "none": N_("from fuel and meat alone"),
    "water pan": N_("water pan"),
    "spritz": N_("spritzing"),
    "steam": N_("steam"),
}
"""What moistens the cooker's air."""

AIRS = {
    "still": N_("hardly"),
    "draught": N_("by its own draught"),
    "fan": N_("by a fan"),
}
"""How a cooker's air moves."""

UNKNOWNS = {
    "thickness": N_("how thick the piece is"),
    "fat": N_("its fat"),
    "water": N_("its water"),
    "convection": N_("how strongly the air moves over it"),
    "pit": N_("how far the pit's thermometer is off"),
    "wall below": N_("how hot the plate below it is"),
    "wall above": N_("how hot the wall above it is"),
    "humidity": N_("how moist the air is"),
    "wrap": N_("how tight the wrap is"),
    "diffusivity": N_("how fast water moves in it"),
    "skin": N_("how tight its dried skin is"),
    "holding": N_("how much water the meat holds"),
    "draining": N_("how fast juice drips off"),
    "rendering": N_("how fast fat runs off"),
    "collagen": N_("how fast collagen dissolves"),
    "collagen opening": N_("when collagen begins to dissolve"),
}
"""What the simulator draws, by its own names."""

WRAP_NAMES = {code or "bare": words for code, words in WRAPS.items()}
"""Wraps by the words of a protocol."""
SHORT_WRAPS = {**WRAPS, "boat": N_("boat"), "tray": N_("tray")}
"""Wraps in an arm's name."""
