// What is said of a job at intake: faults, kind of repair, parts and colour, from the closed lists of
// reports/record/catalogue.hpp or, as the exception, in the technician's own words through the privacy
// screen.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "app.hpp"
#include "reports/record/catalogue.hpp"

namespace hb::cli {
struct JobWords {
  std::vector<std::string> faults, parts;
  std::string fault_text, repair, colour;
  std::optional<record::Catalogue> list;  ///< to be printed instead

  void add_options(CLI::App& sub);
  /// Errors: invalid_argument with the nearest entries for a fault that is on no list; privacy.
  [[nodiscard]] Result<void> into(record::Job& job) const;
};

/// Ids and words of one list.
int show_catalogue(const App& app, record::Catalogue which);
}  // namespace hb::cli
