#pragma once

#include <CLI/CLI.hpp>

/// Help that shows its worked line, the footer of a command, before the options: on a small screen those push it away.
class ExampleFirst : public CLI::Formatter
{
 public:
  std::string make_usage(const CLI::App* app, std::string name) const override
  {
    const std::string example = app->get_footer();
    return Formatter::make_usage(app, std::move(name)) + (example.empty() ? "" : "\n" + example + "\n");
  }
  std::string make_footer(const CLI::App* /*app*/) const override { return ""; }
};
