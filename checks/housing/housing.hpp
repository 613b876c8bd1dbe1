/// The closed housing as the technician sees it: gaps, screws, covers, colour, adhesive. Every value is
/// observed by a person, none is measured by the program; each key says so ("housing.observed_...").
/// Capture   the answers, in the order of the questions.
/// Measures  see README.md; counts and yes-or-no answers are exact, a gap has the feeler gauge's step.
/// Errors    acquire: unsupported (nobody can be asked), what the hands give. measure: bad_format (an answer
///           that the profile did not ask for, or out of range).
/// Threads   acquire on the phone's strand; the rest pure, any thread.
#pragma once

#include "checks/definition.hpp"

namespace hb::checks {

struct Housing {
  struct Cover {
    ShopText name;
    bool adhesive = true;  ///< held by adhesive, so that the technician is asked for it
  };
  struct Screws {
    ShopText name;
    int count = 0;
  };
  struct Config {
    std::vector<Cover> covers;
    std::vector<Screws> screws;
  };
  struct Answer {
    Inspection inspection = Inspection::seated;
    std::string part;  ///< of the profile
    double value = 0;
    friend bool operator==(const Answer&, const Answer&) = default;
  };
  struct Capture {
    std::vector<Answer> answers;
    friend bool operator==(const Capture&, const Capture&) = default;
  };

  [[nodiscard]] static CheckInfo needs();
  [[nodiscard]] static std::vector<SectionSpec> sections();
  /// unsupported: the profile names neither a cover nor screws.
  [[nodiscard]] static Result<Config> configure(const Sections& sections);
  [[nodiscard]] static std::vector<Term> limit_keys();
  [[nodiscard]] net::awaitable<Result<Capture>> acquire(Context& context, Config config) const;
  [[nodiscard]] static Result<Measured> measure(const Capture& capture, const Config& config);
  [[nodiscard]] static std::vector<Finding> diagnose(std::span<const Verdict> verdicts,
                                                     const Capture& capture, const Config& config);
  /// What is asked, in order.
  [[nodiscard]] static std::vector<Question> questions(const Config& config);
};

void to_json(nlohmann::json& j, const Housing::Capture& c);
void from_json(const nlohmann::json& j, Housing::Capture& c);

static_assert(CheckDefinition<Housing>);
}  // namespace hb::checks
