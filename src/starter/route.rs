//! Checklists of the starter, by route (common practice, no source).

use crate::model::words::Means;

pub(super) fn checklists(route: Means) -> String {
    let (before, placing, shift, trouble, end) = match route {
        Means::Esophageal => (
            "    step \"Airway secured; mouth, teeth and throat looked at\", covers airway\n",
            "    step \"Measure the depth from the lips to the earlobe to the tip of the xiphoid; mark it\", record depth in cm, two people, covers depth\n    step \"Confirm the position\", covers position\n    step \"No connection and no hose lies against skin\", covers skin-contact\n    step \"Low intermittent suction on the central lumen to empty the stomach\", covers decompression\n",
            "    step \"Depth mark at the lips\", record depth-each-shift in cm, covers depth\n",
            "    step \"Depth: the mark is at the lips\", covers depth\n    step \"Position confirmed again\", covers position\n",
            "    step \"Withdraw, disconnect and clamp\", covers removal\n    step \"Look at lips, mouth and tongue\", covers skin-inspection\n    step \"Dispose by local policy\", covers disposal\n",
        ),
        Means::Intravascular => (
            "",
            "    step \"Position confirmed; catheter fixed\", covers position\n",
            "    step \"Look at the place of entry\", covers position\n",
            "    step \"Catheter: position, no kink\", covers position\n",
            "    step \"The catheter is taken out by the doctor; look at the place of entry\", covers removal, skin-inspection\n    step \"Dispose by local policy\", covers disposal\n",
        ),
        _ => (
            "",
            "    step \"Pause temperature control while the covers go on\", covers pause\n    step \"Lay the covers flat against the skin without folds\", covers skin-contact\n",
            "    step \"Lift each cover: skin under it and under every edge\", covers skin-inspection\n",
            "    step \"Covers flat against the skin, none slipped\", covers skin-contact, position\n",
            "    step \"Take the covers off; look at the skin under each\", covers removal, skin-inspection\n    step \"Dispose by local policy\", covers disposal\n",
        ),
    };
    format!(
        "  # decide: the steps of your own device, by its instructions for use
  checklist prepare \"Before the start\" at before-start {{
{before}    step \"Fill the exchange unit to its mark\", covers fill
    step \"Connect, switch on, see that water flows\", covers flow
    step \"No leak at hoses or connections\", covers leaks
    step \"Control probe in its place and plugged in; it reads what the second site reads\", covers probe
    step \"Set the target of the first phase; the second person reads it back from the sheet\", two people
    step \"Set the alarm limits, high and low\", two people, covers alarm-limits
  }}

  checklist place \"Placing\" at placing {{
{placing}  }}

  checklist begin-control \"Starting\" at start {{
    step \"Start temperature control; compare the target with the sheet\", two people, covers resume
    step \"Water flows, no leak\", covers flow, leaks
  }}

  checklist each-shift-check \"Each shift\" at each-shift {{
{shift}    step \"Control probe in its place; it agrees with the second site\", covers probe
    step \"Water flows, no leak, water at its mark\", covers flow, leaks, fill
    step \"Target and alarm limits are those of the sheet\", two people, covers alarm-limits
  }}

  checklist trouble \"Not responding\" at trouble {{
    step \"Flow: the water runs, no hose is kinked, clamped or leaking\", covers flow
    step \"Mode and target are those of the sheet\", two people
    step \"Control probe: intact, in its place, and it agrees with the second site\", covers probe
    step \"Pause temperature control\", covers pause
{trouble}    step \"Start temperature control again\", covers resume
    step \"Heat gained or lost by the patient: shivering, seizures, fluids, blankets; room temperature\"
  }}

  checklist ending \"Ending\" at end {{
    step \"Stop temperature control\"
{end}    step \"Leave the core probe in: temperature is watched after control has ended\"
  }}
"
    )
}
