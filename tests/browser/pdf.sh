#!/usr/bin/env bash
# The certificate as other programs see it: text selectable, fonts embedded, pages numbered, paper.
set -eu
for need in pdftotext pdffonts pdfinfo; do
  command -v "$need" >/dev/null || { echo "skipped: $need is not installed"; exit 77; }
done
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
"$1" pdf 8 >"$work/a4.pdf"
"$1" pdf 8 letter inch >"$work/letter.pdf"
"$1" pdf 3 hostile >"$work/hostile.pdf"
fail() { echo "failed: $*"; exit 1; }

pdftotext -layout "$work/a4.pdf" "$work/a4.txt"
tr -s ' \n' ' ' <"$work/a4.txt" >"$work/a4.words" # wherever its lines break
for words in 'Inspection report' 'does not conform' 'Decision rule' 'Signatures' \
  'SHA-256' 'hold point' 'accepted under concession (CON-4)' 'root mean square distance' 'authorised inspector' 'Limits and their sources' 'Calibration due'; do
  grep -q "$words" "$work/a4.words" || fail "the text '$words' is not selectable"
done
pages=$(pdfinfo "$work/a4.pdf" | sed -n 's/^Pages: *//p')
grep -q "page $pages of $pages" "$work/a4.txt" || fail "the last page is not numbered $pages of $pages"
pdfinfo "$work/a4.pdf" | grep -q 'A4' || fail "not A4"
pdfinfo "$work/letter.pdf" | grep -q 'letter' || fail "not Letter"
pdftotext "$work/letter.pdf" - | grep -qE '[0-9] mm' && fail "millimetres in an inch certificate"
pdffonts "$work/a4.pdf" | tail -n +3 | awk '{ if ($(NF-4) != "yes") exit 1 }' || fail "a font is not embedded"
pdftotext "$work/hostile.pdf" - | grep -q '<script>alert(1)</script>' || fail "a hostile title was changed"

# as a structured document: marked, with headings and tables, metadata and an output intent
pdfinfo "$work/a4.pdf" | grep -q '^Tagged: *yes' || fail "not tagged"
pdfinfo "$work/a4.pdf" | grep -q '^Metadata Stream: *yes' || fail "no metadata"
pdfinfo -meta "$work/a4.pdf" | xmllint --noout - || fail "the metadata are no XML"
pdfinfo -struct "$work/a4.pdf" >"$work/struct.txt" 2>"$work/complaints.txt"
for element in H1 H2 P Table TR TH TD; do
  grep -qE "^ *$element( |\$)" "$work/struct.txt" || fail "no element $element"
done
[ ! -s "$work/complaints.txt" ] || fail "a reader complains: $(head -3 "$work/complaints.txt")"
# every sheet says which report it is of
for page in $(seq "$pages"); do
  pdftotext -f "$page" -l "$page" -layout "$work/a4.pdf" - | grep -q '[Rr]eport .*plate .*plateproof' || fail "page $page could be of any report"
done

head_of() { "$1" pdf 3 "$2" >"$work/head.pdf" && pdftotext -layout "$work/head.pdf" - | head -20; }
head_of "$1" study >"$work/study.txt"
grep -q 'Result: hold-down not ready' "$work/study.txt" || fail "the study's headline is not the page's"
grep -q 'A plan, not an acceptance' "$work/study.txt" || fail "a study could be taken for an acceptance"
grep -q 'certificate' "$work/study.txt" && fail "a study calls itself a certificate"
head_of "$1" sampled | grep -q 'Verdict: the holes measured conform' \
  || fail "a sample's headline is not the page's"
echo "the certificate holds: $pages pages"
