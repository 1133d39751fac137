#!/usr/bin/env bash
# The main job with an installed hayweather: main_job.sh BIN, from a folder that holds
# sample_forecasts; BIN is the folder of its programs. Writes beside the samples.
set -euo pipefail
bin=$1
samples=sample_forecasts
hay() { "$bin/hayweather" "$@"; }

hay --help > /dev/null
hay sample written
cmp written/sagebeck.toml "$samples/sagebeck.toml"
for farm in "$samples"/*.toml; do
  hay outlook "$farm" --format json --out outlook.json
  "$bin/python" -c 'import json, sys; d = json.load(open(sys.argv[1])); assert d["fields"][0]["hours"], d' outlook.json
done
hay outlook "$samples/sagebeck.toml" | head -n 20
hay outlook "$samples/sagebeck.toml" --field bench --keep outlooks --chart chart.png --page page.html --out page.csv
hay runsheet "$samples/sagebeck.toml" --field bench --out sheet.txt --page sheet.html --calendar sheet.ics
hay runsheet "$samples/sagebeck.toml" --field bench --text
hay fields "$samples/sagebeck.toml" --days 1 | head -n 8
hay seasons "$samples/seasons/sites.toml" --months 7 --out seasons.csv --chart seasons.png
hay trial "$samples/seasons/strips.csv" | head -n 4
hay tune "$samples/sagebeck.toml" "$samples/sagebeck_readings.csv" | head -n 8
hay score "$samples/sagebeck.toml" "$samples/sagebeck_log.csv" | head -n 8
hay inspect "$samples/vallumbria.csv" --timezone Europe/Madrid | head -n 4
hay guide | head -n 4
hay guide tonight > /dev/null
for written in chart.png page.html page.csv sheet.txt sheet.html sheet.ics seasons.csv seasons-sites.png; do
  [ -s "$written" ] || { echo "$written was not written"; exit 1; }
done
