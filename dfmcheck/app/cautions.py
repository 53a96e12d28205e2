"""The cautions that every report carries."""

CAUTIONS = (
    "An aid to judgement, not an offer and not an approval: strength, function and safety are not checked.",
    "The shop's own judgement, local codes and licensed practice prevail. "
    "Machined parts have sharp edges, and machining, lifting and finishing can hurt: handle with care.",
)
