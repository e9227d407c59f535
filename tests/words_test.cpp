#include "words.hpp"

#include <fmt/core.h>
#include <catch2/catch.hpp>

#include <cmath>
#include <limits>
#include <random>
#include <string>
#include <vector>

using namespace bilancetta;

TEST_CASE("numbers for people are rounded to their digits, and hold an exponent only where they are far off", "[words]")
{
  CHECK(significant(0.0, 2) == "0");
  CHECK(significant(400.0, 2) == "400");
  CHECK(significant(1284.2, 2) == "1300");
  CHECK(significant(1284.2, 4) == "1284");
  CHECK(significant(994.9, 2) == "990");
  CHECK(significant(999.6, 2) == "1000");
  CHECK(significant(9.96, 2) == "10");
  CHECK(significant(0.0996, 2) == "0.1");
  CHECK(significant(0.5, 3) == "0.5");
  CHECK(significant(12.345, 3) == "12.3");
  CHECK(significant(-0.00123456, 3) == "-0.00123");
  CHECK(significant(1e-7, 6) == "0.0000001");
  CHECK(significant(5e-5, 2) == "0.00005");
  CHECK(significant(1e6, 6) == "1000000");
  CHECK(significant(123456.0, 1) == "100000");
  CHECK(significant(1e-9, 2) == "0.000000001");
  CHECK(significant(1e-300, 6) == "1e-300");
  CHECK(significant(-4.56e-12, 2) == "-4.6e-12");
  CHECK(significant(1e14, 2) == "100000000000000");
  CHECK(significant(1e300, 9) == "1e+300");
  CHECK(significant(std::numeric_limits<double>::infinity(), 2) == "inf");
}

TEST_CASE("a number has no digit that its uncertainty does not support", "[words]")
{
  CHECK(supported(0.12345, 0.012) == "0.123");
  CHECK(supported(0.00000014, 0.0001) == "0");
  CHECK(supported(-0.00000014, 0.0001) == "0");
  CHECK(supported(-0.0031, 0.0005) == "-0.0031");
  CHECK(supported(0.0029876, 0.0005) == "0.00299");
  CHECK(supported(1234.5, 30.0) == "1235");
  CHECK(supported(1234.5, 300.0) == "1230");
  CHECK(supported(0.25, 0.0) == "0.25");
}

TEST_CASE("the ends of a band are rounded outwards to their digits", "[words]")
{
  CHECK(with_digits(10630.7, 3) == "10600");
  CHECK(high_with_digits(10630.7, 3) == "10700");
  CHECK(low_with_digits(9528.0, 3) == "9520");
  CHECK(high_with_digits(342.0001, 3) == "343");
  CHECK(high_with_digits(9.91, 2) == "10");
  CHECK(high_with_digits(0.0991, 2) == "0.10");
  CHECK(low_with_digits(9.99, 2) == "9.9");
  CHECK(low_with_digits(3.0, 2) == "3.0");
  CHECK(high_with_digits(0.3, 2) == "0.30");  // and not 0.31 for what is binary only
  CHECK(low_with_digits(0.0, 2) == "0");
  std::mt19937 random(20261130);
  std::uniform_real_distribution<double> exponent(-5.0, 9.0);
  for (int i = 0; i < 10000; ++i) {
    const double value = std::pow(10.0, exponent(random));
    const int digits = 1 + i % 4;
    const double step = std::pow(10.0, std::floor(std::log10(value)) - digits + 1);
    const double low = std::stod(low_with_digits(value, digits));
    const double high = std::stod(high_with_digits(value, digits));
    CHECK(low <= value + 1e-6 * step);
    CHECK(high >= value - 1e-6 * step);
    CHECK(high - low < 1.001 * step);
    CHECK(std::abs(std::stod(with_digits(value, digits)) - value) < 0.501 * step);
  }
}

// The library fmt, for numbers of all sizes.
TEST_CASE("numbers with so many decimals are what fmt writes", "[words]")
{
  std::mt19937 random(20261130);
  std::uniform_real_distribution<double> exponent(-9.0, 11.0);
  for (int i = 0; i < 100000; ++i) {
    const double value = (i % 3 == 0 ? -1.0 : 1.0) * std::pow(10.0, exponent(random));
    const int decimals = i % 8;
    REQUIRE(fixed(value, decimals) == fmt::format("{:.{}f}", value, decimals));
  }
  CHECK(fixed(0.0, 3) == "0.000");
  CHECK(fixed(-0.0, 1) == "-0.0");
  CHECK(fixed(0.0625, 3) == "0.062");  // to the even one, as fmt does
  CHECK(fixed(0.1015, 3) == "0.102");  // a little more than it says
  CHECK(fixed(1.005, 2) == "1.00");    // a little less
  CHECK(fixed(0.9996, 3) == "1.000");
  CHECK(fixed(7.0, 0) == "7");
  CHECK(fixed(1e20, 2) == "100000000000000000000.00");
  CHECK(fixed(std::numeric_limits<double>::quiet_NaN(), 2) == "nan");
  CHECK(fixed(-std::numeric_limits<double>::infinity(), 2) == "-inf");
}

TEST_CASE("numbers of the usual sizes are what fmt writes with so many digits", "[words]")
{
  std::mt19937 random(20261201);
  std::uniform_real_distribution<double> exponent(-3.9, 1.99);
  for (int i = 0; i < 20000; ++i) {
    const double value = (i % 3 == 0 ? -1.0 : 1.0) * std::pow(10.0, exponent(random));
    const int digits = 2 + i % 3;
    REQUIRE(significant(value, digits) == fmt::format("{:.{}g}", value, digits));
  }
  CHECK(significant(0.01, 3) == "0.01");
  CHECK(significant(0.09996, 3) == "0.1");
  CHECK(significant(std::numeric_limits<double>::quiet_NaN(), 2) == "nan");
  CHECK(significant(-std::numeric_limits<double>::infinity(), 2) == "-inf");
}

TEST_CASE("blanks stand between words and at the ends, those that break no line as well", "[words]")
{
  const auto words = [](std::string_view text) {
    std::vector<std::string> all;
    for_each_word(text, [&](std::string_view word) { all.emplace_back(word); });
    return all;
  };
  using Words = std::vector<std::string>;
  CHECK(words("").empty());
  CHECK(words(" \t\u00A0\u202F\u2009").empty());
  CHECK(words("5.00") == Words{"5.00"});
  CHECK(words(" 5.00\t5.01  5.02 ") == Words{"5.00", "5.01", "5.02"});
  CHECK(words("1\u00A0234\u202F567\u2009890") == Words{"1", "234", "567", "890"});
  CHECK(words("l\u00F6ffel\u2013rund") == Words{"l\u00F6ffel\u2013rund"});
  CHECK(trimmed("").empty());
  CHECK(trimmed(" \u00A0 ").empty());
  CHECK(trimmed("\u2009\t a b\u202F\u00A0 ") == "a b");
  CHECK(trimmed("\u00E0") == "\u00E0");
}

TEST_CASE("a long text is cut between two characters", "[words]")
{
  CHECK(shortened("short", 5) == "short");
  CHECK(shortened("longer", 4) == "long ...");
  CHECK(shortened("12\u00B0 and more", 3) == "12 ...");
  CHECK(shortened("\u00B0\u00B0", 1) == " ...");
}
