#!/bin/bash
# Prints every number that the tests and the benchmark measure, one a line:
#   figure NAME VALUE UNIT
# on standard output, and nothing else there. Fails, with what happened on
# standard error, if a test fails, if a figure that has to be there is not, or
# if docs/ quotes a figure that is not printed or that came out differently.
set -euo pipefail
cd "$(dirname "$0")/.."

required="delta_bullington_worst_db knife_edge_worst_db viewshed_agreement_percent demo_seconds digipeater_shortfall_minutes oet65_worst_percent intermod_brute_force_agreement_percent town_2m_seconds town_2m_gigabytes p1812_cases_met p1812_cases_total p1812_worst_db pycraf_worst_db short_range_joint_step_db graph_agreement_percent aloha_peak_percent brute_force_agreement_percent best_pair_seconds best_pair_gap_percent roof_search_seconds roof_search_gap_percent mast_family_costs live_first_picture_ms live_full_picture_ms drag_pictures_per_second drag_pictures_per_second_town live_axe_serious_faults brief_megabytes axe_serious_faults brief_network_requests interval_coverage_percent calibration_bias_db outlier_bias_db outlier_coverage_percent log_rows_lost kill_partial_files fuzz_panics fuzz_cases_per_reader hostile_files_tried hostile_hangs hostile_aborts hostile_writes_outside statements_compared statements_differing ready_statements_held library_build_seconds rebuild_after_report_edit_seconds mutants_caught_percent reader_mutants_caught_percent line_coverage_percent big_raster_gigabytes rank_sample_seconds rank_sample_files_seconds rank_town_seconds rank_town_files_seconds choose_sample_seconds choose_sample_files_seconds masts_town_seconds masts_town_files_seconds search_town_seconds search_town_files_seconds rehearse_sample_seconds rehearse_sample_files_seconds brief_sample_seconds custom_crs_costs rank_two_thread_speedup startup_ms startup_of_libraries_ms viewshed_3601_seconds coverage_3601_seconds coverage_3601_geojson_megabytes package_megabytes portable_megabytes bare_system_verbs_ok"

work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

# Runs cargo; keeps its figure lines; shows everything if it fails.
measure() {
    if ! cargo "$@" >"$work/out" 2>"$work/err"; then
        cat "$work/out" "$work/err" >&2
        echo "figures: cargo $1 failed" >&2
        exit 1
    fi
    grep -o 'figure [a-z0-9_]* .*' "$work/out" >>"$work/figures" || true
}

: >"$work/figures"
measure test --locked --quiet -- --nocapture
measure bench --locked --quiet --bench figures --bench sweep_figures --bench town --bench choose --bench spots --bench live --bench verbs --bench whole_map
tests/build-times.sh >>"$work/figures"
# Packages are built and tried on bare systems where that can be done.
unmeasured=
if [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null && unshare --mount true 2>/dev/null; then
    make --no-print-directory package-test >"$work/out" 2>"$work/err" || {
        cat "$work/out" "$work/err" >&2
        echo "figures: make package-test failed" >&2
        exit 1
    }
    grep -o '^figure [a-z0-9_]* .*' "$work/out" >>"$work/figures"
else
    unmeasured="package_megabytes portable_megabytes bare_system_verbs_ok"
    echo "Left out (packages): not Debian or Ubuntu as root, with the right to mount: packages are neither built nor tried." >&2
fi
# Runs too long to repeat stand in docs/trust.md and docs/scale.md with date, commit
# and command.
sed -nE 's/^\| `([a-z0-9_]+)` ([0-9.]+) ([A-Za-z]+) \| [0-9-]+ \| `[0-9a-f]{7,}` \| .*/figure \1 \2 \3/p' docs/trust.md docs/scale.md >>"$work/figures"
sort -u "$work/figures" | tee "$work/sorted"

failed=0
for name in $required; do
    [[ " $unmeasured " != *" $name "* ]] || continue
    grep -q "^figure $name " "$work/sorted" || {
        echo "figures: $name was not measured: is its data there?" >&2
        failed=1
    }
done

# In docs a measured number reads `name` VALUE UNIT. It may differ from the
# figure by one in its last place; times depend on the machine, and ratios of
# times (by half) on what else it does.
tr '\n' ' ' <<<"$(cat docs/*.md README.md)" \
    | grep -oE '`[a-z0-9]+(_[a-z0-9]+)+` =? ?[0-9]+(\.[0-9]+)?' \
    | tr -d '`=' >"$work/quoted" || true
[ -s "$work/quoted" ] || { echo "figures: docs/ quotes none: has the notation changed?" >&2; failed=1; }
while read -r name quoted; do
    [[ " $unmeasured " != *" $name "* ]] || continue
    measured=$(awk -v name="$name" '$2 == name { print $3 }' "$work/sorted")
    if [ -z "$measured" ]; then
        echo "figures: docs quote $name $quoted, which is not measured" >&2
        failed=1
    elif ! awk -v q="$quoted" -v m="$measured" -v name="$name" 'BEGIN {
        if (name ~ /_((micro)?seconds|ms)$/) exit 0
        if (name ~ /_vs_|_costs?$|speedup|growth/) exit !(q <= 1.5 * m && m <= 1.5 * q)
        point = index(q, "."); places = point ? length(q) - point : 0
        d = q - m; if (d < 0) d = -d
        exit !(d <= 1.000001 * 10 ^ -places)
    }'; then
        echo "figures: docs quote $name $quoted, measured is $measured" >&2
        failed=1
    fi
done <"$work/quoted"
exit "$failed"
