#!/usr/bin/env bash
# The statements of the program on simulated plates; the same numbers on every machine.
#   scripts/simulate.sh [diagnosis] [PLATES]   false alarms and finds, docs/theory/diagnosis.md; 200
#                                              plates a row by default, fewer for planted causes
#   scripts/simulate.sh diagnosis --large [PLATES]   the same with 2000 holes a plate, and several causes at once
#   scripts/simulate.sh diagnosis --together [PLATES]  several causes at once with 400 holes a plate
#   scripts/simulate.sh diagnosis --sound [PLATES [WORD]]  only the plates without a cause, of rows with that word
#   scripts/simulate.sh asked [PLATES [FIRST [WORD]]]  planted causes against the shares asked for, row by row;
#                                              rows with WORD in "table: row", seeds from FIRST; 100 plates a row
#   scripts/simulate.sh shop [DRAWS [FIRST]]   seven plates as a shop has them through the program; 12 drawings of each
#   scripts/simulate.sh position [RUNS]        holes at their limit, docs/theory/holes.md; 20000
#                                              measurements a cell: three minutes
#   scripts/simulate.sh surface [RUNS]         the fitted surface against the true one,
#                                              docs/theory/surface.md; 40 surveys a row
#   scripts/simulate.sh flatness [RUNS [FIRST [LAST]]]   plates at their flatness limit,
#                                              docs/theory/flatness.md; 20 surveys a row
#   scripts/simulate.sh stack [STACKS [LAYERS]] random stacks, docs/theory/stack.md; 30 of 5 layers
#   scripts/simulate.sh bundle [SETS [FIRST [wide]]] random bundles against scipy, docs/theory/bundle.md;
#                                              500 sets, about ten minutes
#   scripts/simulate.sh placements [POSES]     what is claimed of a placement, docs/theory/bundle.md; 400 poses
#   scripts/simulate.sh mistakes [NUMBER...]   mistakes planted in the bundle's source, and which test notices,
#                                              docs/testing.md; some twenty minutes
#   scripts/simulate.sh correction [MACHINES [ROW [PLATES]]]  corrected lists: the promise against what comes of it,
#                                              docs/theory/correction.md; 100 machines a row
#   scripts/simulate.sh history [RUNS / --positions RUNS]         false alarms of charts, cover of intervals, tool life,
#                                              docs/theory/history.md; 2000 runs a row
#   scripts/simulate.sh heats [RUNS]           how often a heat that differs is found, against scipy's noncentral F,
#                                              docs/theory/history.md; 2000 runs a row
#   scripts/simulate.sh map [SURFACES [FIRST]] straightedges and areas by brute force on the program's own map,
#                                              docs/theory/straightedge.md; 20 surfaces
#   scripts/simulate.sh holddown [JOBS [FIRST]] random hold-down jobs: symmetry, monotonicity, closing forces,
#                                              docs/theory/holddown.md; 200 jobs, some twenty minutes
#   scripts/simulate.sh mesh [--discs] [JOBS [FIRST]]  the uncertainty of the mesh against one twice as fine, and lift-off
#                                              against closed forms, docs/theory/holddown.md; 40 jobs
#   scripts/simulate.sh plans random [PLATES [FIRST]]  plans of clamps given back to the program: do they hold?
#   scripts/simulate.sh plans surveys [SURVEYS]  plans of one plate surveyed again and again: do they agree?
#                                              both docs/theory/holddown.md; 200 plates, 30 surveys
#   scripts/simulate.sh flattening [SURVEYS [FIRST]]  the stress of flattening and its range on plates of known curvature,
#                                              docs/theory/holddown.md; 30 surveys of each of 30
#   scripts/simulate.sh judge [JOBS [FIRST]]   random hole jobs against an independent judge, docs/testing.md; 1000
#                                              jobs. A run that was stopped goes on (build/judge-FIRST.json)
#   scripts/simulate.sh pattern [JOBS [FIRST]] readings in a frame that nobody knows against a search by numpy and
#                                              scipy, docs/theory/holes.md; 500 jobs
#   scripts/simulate.sh flat [SURVEYS [POINTS]] perfectly flat plates, docs/theory/flatness.md; 20 of 2000 points
#   scripts/simulate.sh planted [JOBS]         the same with a mistake planted in the judge, each in turn: noticed?
set -euo pipefail
cd "$(dirname "$0")/.."
scripts/build.sh release
case "${1:-}" in
  *[!0-9]*) which=$1; shift ;;
  *) which=diagnosis ;;
esac
[ "$which" != stack ] || exec /usr/bin/python3 tests/simulation/stack_simulation.py build/release/plateproof "$@"
[ "$which" != shop ] || exec /usr/bin/python3 tests/simulation/shop_plates.py build/release/plateproof "$@"
[ "$which" != map ] || exec /usr/bin/python3 tests/reference/map_peer.py build/release/plateproof "${1:-20}" "${@:2}"
[ "$which" != holddown ] || exec /usr/bin/python3 tests/reference/holddown_trials.py build/release/plateproof "${1:-200}" "${@:2}"
[ "$which" != plans ] || exec /usr/bin/python3 tests/simulation/holddown_plans.py build/release/plateproof "$@"
[ "$which" != flattening ] || exec /usr/bin/python3 tests/simulation/flattening_stress.py build/release/plateproof "$@"
[ "$which" != bundle ] || exec /usr/bin/python3 tests/bundle/random_sets.py build/release/plateproof "${1:-500}" "${@:2}"
[ "$which" != placements ] || exec /usr/bin/python3 tests/bundle/placements.py build/release/plateproof "${1:-400}"
[ "$which" != mistakes ] || exec /usr/bin/python3 tests/bundle/mistakes.py "$@"
judge=(/usr/bin/python3 tests/reference/holes_peer.py build/release/plateproof build/release/tests/reference/holes_tool)
[ "$which" != flat ] || exec /usr/bin/python3 tests/simulation/flat_surveys.py build/release/tests/reference/holes_tool "$@"
[ "$which" != heats ] || exec /usr/bin/python3 tests/simulation/heats.py build/release/tests/simulation/history_simulation "$@"
[ "$which" != pattern ] || exec /usr/bin/python3 tests/reference/pattern_peer.py build/release/tests/reference/holes_tool "${1:-500}" "${@:2}"
[ "$which" != planted ] || exec "${judge[@]}" "${1:-100}" --planted each
[ "$which" != judge ] || exec "${judge[@]}" "${1:-1000}" --first "${2:-1}" --tables-every 20 --program-every 1000 \
  --state "build/judge-${2:-1}.json"
exec "build/release/tests/simulation/${which}_simulation" "$@"
