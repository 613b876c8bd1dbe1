/// What the sentences about single checks share. Private to sentences*.cpp and quantities.cpp. Pure.
#pragma once

#include <initializer_list>
#include <string>
#include <string_view>
#include <vector>

#include "language.hpp"
#include "story.hpp"
#include "view.hpp"

namespace hb::sheet {

using Verdicts = std::vector<const VerdictView*>;
using Names = std::vector<std::string>;

[[nodiscard]] bool all_kept(const Verdicts& list);
/// What a claim needs: it was measured, had a limit, and kept it.
[[nodiscard]] bool proved(const Verdicts& list);
/// Each made a whole sentence; empty ones are left out.
[[nodiscard]] Told join(Told pieces);
/// What is wrong.
[[nodiscard]] inline Piece bad(std::string text) { return {std::move(text), true}; }
/// A record's unit in an owner's words, empty where a number alone says as much: "K/min" -> "°C a minute".
[[nodiscard]] std::string plain_unit(std::string_view unit, const Language& l);
/// The words for a quantity, `key` with or without its check before the dot.
[[nodiscard]] std::string quantity_words(std::string_view key, const Language& l);
/// "1.7 A": the number in this language.
[[nodiscard]] std::string with_unit(double value, std::string_view unit, int digits, const Language& l);
/// The first measured values outside their limits, but for those whose quantity is `told` already, so that a
/// fail always shows its number.
[[nodiscard]] Piece worst_values(const CheckView& c, std::initializer_list<std::string_view> told,
                                 const Language& l);

[[nodiscard]] Told said_of_sound(const CheckView& c, const Language& l);
[[nodiscard]] Told said_of_keys(const CheckView& c, const Language& l);
[[nodiscard]] Told said_of_motion(const CheckView& c, const Language& l);
[[nodiscard]] Told said_of_port(const CheckView& c, const Language& l);
[[nodiscard]] Told said_of_vibration(const CheckView& c, const Language& l);
[[nodiscard]] Told said_of_radios(const CheckView& c, const Language& l);
[[nodiscard]] Told said_of_presence(const CheckView& c, const Language& l);
[[nodiscard]] Told said_of_housing(const CheckView& c, const Language& l);
[[nodiscard]] Told said_of_panel(const CheckView& c, const Language& l);
[[nodiscard]] Told said_of_another(const CheckView& c, const Language& l);
}  // namespace hb::sheet
