"""The cautions that every report carries."""

CAUTIONS = (
    (
        "An aid to judgement, neither an offer nor an approval: "
        "strength, function and safety are not checked."
    ),
    (
        "The shop's own judgement, local codes and licensed practice prevail. Machining, lifting "
        "and finishing can hurt, and machined parts have sharp edges: handle with care."
    ),
)
