#include <nlohmann/json.hpp>
#include "harness/base/text.hpp"

#include "reports/record/record.hpp"

namespace hb::record {
namespace {
using nlohmann::json;
constexpr std::size_t kMaxDepth = 64;

/// Builds the value while refusing what a lenient reader would let through: a name given twice (the last one
/// would win silently) and nesting without end. The text itself never goes into the error.
class StrictBuilder final : public nlohmann::json_sax<json> {
 public:
  bool null() override { return add(json()); }
  bool boolean(bool v) override { return add(json(v)); }
  bool number_integer(number_integer_t v) override { return add_integer(json(v)); }
  bool number_unsigned(number_unsigned_t v) override { return add_integer(json(v)); }
  bool number_float(number_float_t v, const string_t&) override { return add(json(v)); }
  bool string(string_t& v) override { return add(json(std::move(v))); }
  bool binary(binary_t&) override { return refuse("binary data"); }
  bool start_object(std::size_t) override { return open(json::object()); }
  bool start_array(std::size_t) override { return open(json::array()); }
  bool end_object() override { return close(); }
  bool end_array() override { return close(); }
  bool key(string_t& k) override {
    if (path_.back()->contains(k)) return refuse("a name is given twice in one object");
    key_ = std::move(k);
    return true;
  }
  bool parse_error(std::size_t at, const std::string&, const json::exception&) override {
    at_ = at;
    return refuse("this is not JSON");
  }

  json root;
  std::string why = "this is not JSON";
  [[nodiscard]] std::size_t at() const { return at_; }

 private:
  json* place(json v) {
    if (path_.empty()) return root = std::move(v), &root;
    json& into = *path_.back();
    if (into.is_object()) return &(into[key_] = std::move(v));
    into.push_back(std::move(v));
    return &into.back();
  }
  bool add(json v) { return place(std::move(v)), true; }
  /// An integer beyond a double (RFC 7493, 2.2) is refused here already, unless it is how RFC 8785 writes a
  /// large double: then it is that double.
  bool add_integer(json v) {
    if (canonical(v)) return add(std::move(v));
    const double nearest = v.get<double>();
    if (es_number(nearest) != v.dump()) return refuse("an integer is too large to be kept exactly");
    return add(json(nearest));
  }
  bool open(json v) {
    if (path_.size() >= kMaxDepth) return refuse("the value is nested too deeply");
    path_.push_back(place(std::move(v)));
    return true;
  }
  bool close() { return path_.pop_back(), true; }
  bool refuse(std::string reason) { return why = std::move(reason), false; }

  std::vector<json*> path_;  ///< open containers; each lives inside the one before and does not move
  std::string key_;
  std::size_t at_ = 0;
};
}  // namespace

Result<json> parse_strict(std::string_view text) {
  const auto bad = [](std::string what, std::string where = {}) {
    return Error{ErrorCode::bad_format, std::move(what), std::move(where), "Use the file as it was written."};
  };
  if (!valid_utf8(text)) return bad("the text is not valid UTF-8");
  // The parser underneath takes a zero byte for the end and skips a byte-order mark.
  if (text.find('\0') != std::string_view::npos) return bad("the text holds a zero byte");
  if (text.starts_with("\xef\xbb\xbf")) return bad("the text starts with a byte-order mark");
  StrictBuilder builder;
  if (!json::sax_parse(text.begin(), text.end(), &builder))
    return bad(builder.why, builder.at() > 0 ? "byte " + std::to_string(builder.at()) : std::string());
  return std::move(builder.root);
}
}  // namespace hb::record
