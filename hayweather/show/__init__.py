"""Sentences, tables, data and pictures made from an outlook; nothing here computes the hay."""
