#include "reports/record/utc.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>

#include "harness/base/text.hpp"

namespace hb::record {
std::string utc_text(std::int64_t s) {
  using namespace std::chrono;
  s = std::clamp<std::int64_t>(s, 0, 253402300799);
  const std::int64_t days_in = s / 86400, rest = s % 86400;
  const year_month_day date{sys_days{days{days_in}}};
  return fmt::format("{:04}-{:02}-{:02}T{:02}:{:02}:{:02}Z", static_cast<int>(date.year()),
                     static_cast<unsigned>(date.month()), static_cast<unsigned>(date.day()), rest / 3600,
                     rest / 60 % 60, rest % 60);
}

Result<std::int64_t> utc_seconds(std::string_view text) {
  using namespace std::chrono;
  const Error bad{ErrorCode::bad_format, "a time is not written like 2026-11-25T09:30:00Z", "", ""};
  constexpr std::string_view kForm = "dddd-dd-ddTdd:dd:ddZ";
  if (text.size() != kForm.size()) return bad;
  for (std::size_t i = 0; i < kForm.size(); ++i)
    if (kForm[i] == 'd' ? text[i] < '0' || text[i] > '9' : text[i] != kForm[i]) return bad;
  const auto number = [&](std::size_t at, std::size_t n) {
    return static_cast<int>(to_int(text.substr(at, n)).value_or(-1));
  };
  const year_month_day date{year{number(0, 4)}, month{static_cast<unsigned>(number(5, 2))},
                            day{static_cast<unsigned>(number(8, 2))}};
  const int h = number(11, 2), m = number(14, 2), s = number(17, 2);
  if (!date.ok() || number(0, 4) < 1970 || h > 23 || m > 59 || s > 59) return bad;
  return std::int64_t{sys_days{date}.time_since_epoch().count()} * 86400 + h * 3600 + m * 60 + s;
}
}  // namespace hb::record
