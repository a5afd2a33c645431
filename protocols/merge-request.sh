#!/bin/sh
# What a change of protocols must pass before it is merged, and what it does to a patient, for the comment on it.
#
#   sh merge-request.sh TARGET [COMMENT]
#
# TARGET is the revision that the change is to be merged into, such as origin/main; COMMENT is the file that the
# comparison is written to (comment.md). Findings are told in the form REPORT: human, concise, json, sarif or github.
set -u
target=${1:?name the revision that this is to be merged into}
comment=${2:-comment.md}
report=${REPORT:-human}
failed=0

# Everything is tried, so that one run tells all.
tempwright check --format "$report" || failed=1
git ls-files -z '*.protocol' | xargs -0 tempwright fmt --check --format "$report" || failed=1
tempwright rehearse --quiet --format "$report" || failed=1

# A difference is what a change is for; only a comparison that could not be made is a failure.
tempwright compare "$target" --format markdown --output "$comment"
[ $? -le 1 ] || failed=1
exit $failed
