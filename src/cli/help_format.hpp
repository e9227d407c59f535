#pragma once

#include <CLI/CLI.hpp>

/// Help that shows its worked line, the footer of a command, before the options: on a small screen those push it away.
/// Of an option it names what follows, in capitals; what else is said of it stands in its words.
class ExampleFirst : public CLI::Formatter
{
 public:
  std::string make_usage(const CLI::App* app, std::string name) const override
  {
    const std::string example = app->get_footer();
    return Formatter::make_usage(app, std::move(name)) + (example.empty() ? "" : "\n" + example + "\n");
  }
  std::string make_option_opts(const CLI::Option* option) const override
  {
    const std::string value = option->get_type_size() == 0 ? "" : option->get_type_name();
    const std::string shown = value.substr(0, value.find(':'));
    return shown.empty() ? "" : " " + shown;
  }
  std::string make_footer(const CLI::App* /*app*/) const override { return ""; }
};
