#!/usr/bin/env bash
# usage: three_certificates.sh PROGRAM FOLDER PICTURE.png
# Page 1 of what three makers would print of the same invented plate, side by side: all of it by the rule set's limits;
# all of it by limits of the maker's own; the flatness only. The jobs and reports are left in FOLDER.
set -euo pipefail
program=$(realpath "$1")
mkdir -p "$2"
folder=$(realpath "$2") picture=$(realpath -m "$3")
python3 "$(dirname "$0")/invented_plate.py" "$folder"
run() { "$program" "$@" -q || [ $? -eq 1 ]; }
run inspect "$folder/honest.ini" --xlsx
run inspect "$folder/widened.ini"
run flatness "$folder/partial.ini"
for job in honest widened partial; do
  pdftoppm -png -r 75 -f 1 -singlefile "$folder/$job-report/certificate.pdf" "$folder/$job"
done
cat >"$folder/three.html" <<'PAGE'
<!doctype html><meta charset="utf-8"><style>
body { margin: 8px; background: #fff; display: flex; gap: 8px; font: 15px "DejaVu Sans", sans-serif }
figure { margin: 0; width: 620px } img { width: 618px; border: 1px solid #8a949e }
figcaption { padding: 0 0 6px; font-weight: bold }
</style>
<figure><figcaption>Everything, by the rule set</figcaption><img src="honest.png"></figure>
<figure><figcaption>Everything, by limits of the maker's own</figcaption><img src="widened.png"></figure>
<figure><figcaption>The flatness only</figcaption><img src="partial.png"></figure>
PAGE
chromium --headless --no-sandbox --disable-gpu --hide-scrollbars --window-size=1892,920 --screenshot="$picture" "file://$folder/three.html" >/dev/null 2>&1
ls -l "$picture"
