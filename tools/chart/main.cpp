// Writes the bench's camera chart for printing.
//   hb_chart chart.pdf [--paper a4|a3|letter]
//   hb_chart chart.png [--paper ...] [--dpi N]
#include <fmt/format.h>

#include <CLI/CLI.hpp>

#include "harness/manual/manual.hpp"
#include "tools/chart/drawing.hpp"

int main(int argc, char** argv) {
  std::string file, paper = "a4";
  double dpi = 300;
  CLI::App cli("draws the bench's camera chart, for printing", "hb_chart");
  cli.add_option("file", file, "chart.pdf or chart.png")->required();
  cli.add_option("--paper", paper, "a4, a3 or letter; landscape")
      ->check(CLI::IsMember({"a4", "a3", "letter"}));
  cli.add_option("--dpi", dpi, "of a PNG file")->check(CLI::Range(50.0, 1200.0));
  cli.set_version_flag("--version", "hb_chart " HB_VERSION);
  hb::manual::add_writer(cli, {HB_VERSION, HB_RELEASE_DATE, {}});
  CLI11_PARSE(cli, argc, argv);
  const hb::checks::camera::Chart chart;
  const auto size = hb::chart::paper_named(paper);
  const auto done = size ? hb::chart::draw(chart, *size, file, dpi) : hb::Result<void>(size.error());
  if (!done) {
    fmt::print(stderr, "hb_chart: {}\n", done.error().message());
    return 2;
  }
  fmt::print("{}: chart of {:.1f} mm by {:.1f} mm\n", file,
             chart.aspect * hb::chart::chart_height_mm(chart, *size),
             hb::chart::chart_height_mm(chart, *size));
  return 0;
}
