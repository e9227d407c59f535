#include "json_number.hpp"

#include <cmath>
#include <limits>
#include <random>

#include "support.hpp"

using namespace bilancetta;
using namespace testing;
using Catch::Matchers::WithinRel;

// Some numbers were written with seventeen digits (2026-11-30).
TEST_CASE("a number has at most nine significant digits", "[json_number]")
{
  CHECK(json_text(number(10.2387378)) == "10.2387378");
  CHECK(json_text(Json(0.1 + 0.2)) == "0.3");
  CHECK(json_text(Json(123456.7891234)) == "123456.789");
  CHECK(json_text(Json(1.0)) == "1.0");
  CHECK(json_text(Json(12345678900.0)) == "12345678900.0");
  CHECK(json_text(Json(-1.234567891e-7)) == "-1.23456789e-07");
  CHECK(json_text(Json(std::numeric_limits<double>::quiet_NaN())) == "null");
  std::mt19937 random(20261130);
  std::uniform_real_distribution<double> exponent(-9.0, 9.0);
  for (int i = 0; i < 100000; ++i) {
    const double value = (i % 2 == 0 ? 1.0 : -1.0) * std::pow(10.0, exponent(random));
    const std::string text = json_text(i % 3 == 0 ? Json(value) : number(value));
    std::string digits = text.substr(0, text.find('e'));
    std::erase_if(digits, [](char c) { return c == '-' || c == '.'; });
    digits.erase(0, digits.find_first_not_of('0'));
    digits.erase(digits.find_last_not_of('0') + 1);
    INFO(text);
    REQUIRE(digits.size() <= 9);
    REQUIRE_THAT(Json::parse(text).get<double>(), WithinRel(value, 6e-9));
  }
}

// What scripts have read so far stays byte for byte.
TEST_CASE("all else is written as the JSON library writes it", "[json_number]")
{
  const Json json = {{"empty", Json::array()},
                     {"none", Json::object()},
                     {"nothing", nullptr},
                     {"list", {1, 2.5, "three", true, {{"deep", {{"er", -0.0}}}}}},
                     {"say \"ah\"\n", "l\u00F6ffel\t"},
                     {"counts", {-3, 18446744073709551615U}}};
  for (const int indent : {-1, 0, 1, 4}) {
    CHECK(json_text(json, indent) == json.dump(indent));
  }
  CHECK(json_text(Json("text")) == "\"text\"");
  CHECK(json_text(Json("\xC3")) == "\"\xEF\xBF\xBD\"");
  CHECK(json_text(Json{{"\xC3", 1}}) == "{\"\xEF\xBF\xBD\":1}");
}
